"""The bench day: who reads which cylinder at which clock time, kept in versions, printed, and in people's calendars."""
