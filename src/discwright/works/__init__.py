"""From the lacquer to the dock: parts and where they came from, the events of their lives, plating."""
