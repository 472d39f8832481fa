#!/usr/bin/env python
"""Siltbook's command line."""

import os
import sys

WITHOUT_DATABASE = {
    "size_distribution",
    "help",
    "version",
    "--version",
    "--help",
    "collectstatic",
}


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labsite.settings")
    if sys.argv[1:] and sys.argv[1] not in WITHOUT_DATABASE:
        from labsite.embedded.server import hold_if_default

        hold_if_default()

    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
