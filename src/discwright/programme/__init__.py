"""What the approved audio is: survey, loudness, peaks. Opens no file, prints nothing, reads no clock."""
