"""The web edge: blueprints, the frames they render, and the drawing of the board."""
