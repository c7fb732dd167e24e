"""The one error a user may see: a sentence that names the place and the mend."""


class CannotUse(Exception):
    """Input, policy or arguments that cannot be used; the text is one clear sentence for the user (exit status 2)."""
