"""A second description of the machine, as hardware, to check the first against."""
