"""Prints the list of findings that DEVELOPERS.md holds: python -m particles.distribution.findings.catalogue."""

from particles.distribution.findings.catalogue.listed import as_markdown

if __name__ == "__main__":
    print(as_markdown(), end="")
