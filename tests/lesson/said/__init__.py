"""What the lessons say in numbers, read from their text and held to the run."""
