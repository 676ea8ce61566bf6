"""Who may come in. Passwords reach this floor as hashes; the pages make and check them."""

import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from hatchery_app.database import transaction
from hatchery_app.domain.errors import RuleBroken
from hatchery_app.models.account import Account, LoginAttempt

THROTTLE_WINDOW = timedelta(minutes=15)
FAILURES_PER_ACCOUNT = 5
FAILURES_PER_ADDRESS = 20
LONGEST_NAME = 80
ROLES_TO_GIVE = ("keeper", "helper")


@dataclass(frozen=True)
class Keeper:
    """A person who keeps the room, as pages may know them."""

    id: int
    name: str
    role: str
    epoch: int


def find_keeper(session: Session, account_id: int) -> Keeper | None:
    """The keeper of that number, None where there is none."""
    account = session.get(Account, account_id)
    return None if account is None else _keeper(account)


# Asked at the door of every page: four columns of the table itself, and no row kept of them.
_ACCOUNTS = Account.__table__.c
_OWNER = (
    select(_ACCOUNTS.id, _ACCOUNTS.name, _ACCOUNTS.role, _ACCOUNTS.epoch)
    .where(_ACCOUNTS.role == "owner")
    .order_by(_ACCOUNTS.id)
    .limit(1)
)


def find_owner(session: Session) -> Keeper | None:
    """The owner, None before the first page was answered."""
    account = session.execute(_OWNER).first()
    return None if account is None else Keeper(*account)


def make_owner(session: Session, *, name: str, password_hash: str, now: datetime) -> Keeper:
    """Make the first account. Raises RuleBroken where the room has an owner already."""
    with transaction(session):
        if find_owner(session) is not None:
            raise RuleBroken("This room has its owner already; sign in instead.")
        return enter_owner(session, name=name, password_hash=password_hash, now=now)


def enter_owner(session: Session, *, name: str, password_hash: str, now: datetime) -> Keeper:
    """The owner's account, in the transaction of what it is made with; of one that was made
    before the room, name and password become these. Raises RuleBroken."""
    name = _checked_name(name, "owner_name", "Say who you are; entries carry the name.")
    account = session.scalars(select(Account).where(Account.role == "owner")).first()
    if account is None:
        account = Account(role="owner", created_at=now)
        session.add(account)
    account.name, account.password_hash = name, password_hash
    session.flush()
    return _keeper(account)


def _checked_name(name: str, field: str, wanted: str) -> str:
    name = name.strip()
    if not name:
        raise RuleBroken(wanted, field=field)
    if len(name) > LONGEST_NAME:
        raise RuleBroken(f"At most {LONGEST_NAME} signs for a name.", field=field)
    return name


def _name_key(name: str) -> str:
    """A name as it is compared: "ÉLODIE" is "Élodie", however the tablet composes its accents.

    The database's own lower() knows only the letters from A to Z.
    """
    return unicodedata.normalize("NFC", name).strip().casefold()


def password_hash_of(session: Session, *, name: str) -> tuple[int, str] | None:
    """Account number and password hash under a name, None where there is none."""
    key = _name_key(name)
    found = (one for one in session.scalars(select(Account)) if _name_key(one.name) == key)
    account = next(found, None)
    return None if account is None else (account.id, account.password_hash)


def check_throttle(session: Session, *, name: str, address: str, now: datetime) -> None:
    """Raises RuleBroken after too many failures, by name or from one address, within 15 minutes."""
    recent = select(func.count()).where(
        LoginAttempt.at > now - THROTTLE_WINDOW, LoginAttempt.succeeded.is_(False)
    )
    by_name = session.scalar(recent.where(LoginAttempt.name == _name_key(name)[:80])) or 0
    by_address = session.scalar(recent.where(LoginAttempt.address == address)) or 0
    if by_name >= FAILURES_PER_ACCOUNT or by_address >= FAILURES_PER_ADDRESS:
        raise RuleBroken("Too many tries. Wait a quarter of an hour, then try again.")


def note_attempt(
    session: Session, *, name: str, address: str, succeeded: bool, now: datetime
) -> None:
    """Write down a try at signing in."""
    with transaction(session):
        session.add(
            LoginAttempt(
                name=_name_key(name)[:80], address=address[:64], at=now, succeeded=succeeded
            )
        )


def keepers(session: Session) -> tuple[Keeper, ...]:
    """Everybody who has an account, the owner first."""
    rows = session.scalars(select(Account).order_by(Account.id))
    return tuple(_keeper(row) for row in rows)


def add_keeper(
    session: Session, *, name: str, role: str, password_hash: str, now: datetime
) -> Keeper:
    """Give somebody an account. Names differ, whatever their capitals. Raises RuleBroken."""
    name = _checked_name(name, "keeper_name", "Say who it is; entries carry the name.")
    if role not in ROLES_TO_GIVE:
        raise RuleBroken("Say whether it is a keeper or a helper.", field="role")
    with transaction(session):
        if _name_key(name) in {_name_key(one.name) for one in keepers(session)}:
            raise RuleBroken(f"{name} has an account already.", field="keeper_name")
        account = Account(name=name, password_hash=password_hash, role=role, created_at=now)
        session.add(account)
        session.flush()
        return _keeper(account)


def change_password(session: Session, *, account_id: int, password_hash: str) -> Keeper:
    """Give an account another password; every session opened with the old one ends."""
    with transaction(session):
        account = session.get_one(Account, account_id)
        account.password_hash = password_hash
        account.epoch += 1
        session.flush()
        return _keeper(account)


def sign_out_everywhere(session: Session, *, account_id: int) -> None:
    """Make every open session of this account worthless."""
    with transaction(session):
        account = session.get(Account, account_id)
        if account is not None:
            account.epoch += 1


def _keeper(account: Account) -> Keeper:
    return Keeper(account.id, account.name, account.role, account.epoch)
