"""Names of script, style and font files that change with their content."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedNames(CompressedManifestStaticFilesStorage):
    """
    After `collectstatic` every address carries a hash of its file, import statements included.

    So a browser keeps a file for good, and a page kept on a tablet never meets the files of another edition.
    A file that was not collected keeps its plain name.
    """

    support_js_module_import_aggregation = True

    def stored_name(self, name: str) -> str:
        return str(self.hashed_files.get(self.hash_key(self.clean_name(name)), name))
