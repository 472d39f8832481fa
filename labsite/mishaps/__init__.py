"""Pages that say what was refused or went wrong and what to do next, and the filter of the log."""
