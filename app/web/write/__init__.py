"""Writing a lesson in the browser: the teacher's, and nobody else's."""
