"""The physics of one side: curve, motion, spiral, limits. Opens no file, prints nothing, reads no clock."""
