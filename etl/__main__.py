"""``python -m etl`` runs the command line."""

from etl.cli import main

main()
