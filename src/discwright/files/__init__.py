"""Every file format read or written: audio, settings, plans, pictures."""
