"""An invented laboratory and one invented batch, taken through its whole life."""
