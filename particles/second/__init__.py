"""The second calculation, which shares no arithmetic with the first."""
