"""``python -m netcheck``."""

from netcheck.cli import run

run()
