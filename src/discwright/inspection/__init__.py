"""A test play against the programme: what is wrong with a pressing, and which part is guilty."""
