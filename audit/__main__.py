"""`python -m audit` is `valve-audit`."""

from audit.cli import entry

entry()
