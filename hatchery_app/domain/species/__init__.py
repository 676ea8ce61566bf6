"""Species, computed: a protocol read from its text, or refused with file and line."""
