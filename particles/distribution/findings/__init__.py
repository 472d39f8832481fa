"""What a person must know about one run before its figures are believed."""
