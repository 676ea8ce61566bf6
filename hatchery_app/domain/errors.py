"""What is said to the keeper when something cannot be: sentences that can be acted on."""


class RuleBroken(Exception):
    """A fact that cannot be so. The sentence says what was given and what would be possible.

    `field` names the form field the sentence stands beside, "" for the form as a whole.
    """

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field


class Asked(RuleBroken):
    """A fact that may be so but is unusual: it is stored once the keeper has answered.

    `question` is the key the answer comes back under; `answers` are (value, label) pairs.
    Nothing is stored while the question stands open.
    """

    def __init__(
        self,
        sentence: str,
        question: str,
        answers: tuple[tuple[str, str], ...],
        field: str = "",
    ) -> None:
        super().__init__(sentence, field)
        self.question = question
        self.answers = answers


class NotKnown(RuleBroken):
    """The page or fact asked for does not stand in this room's records."""


class NotKept(RuleBroken):
    """The records could not be written: nothing is stored, and what was typed is still there."""
