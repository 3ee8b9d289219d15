"""A plan traced in a notebook: its picture, what is shown over it, and the object that the user holds."""
