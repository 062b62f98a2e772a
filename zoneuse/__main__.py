"""``python -m zoneuse``."""

from .cli import main

main()
