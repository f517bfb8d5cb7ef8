"""The disc as it can be looked at before it is cut: what stands at any place, down to a fraction of a micron."""
