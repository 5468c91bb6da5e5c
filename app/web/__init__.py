"""The web edge, in rooms: ``teach`` and ``paper`` are the teacher's, ``follow`` and ``explore`` are
open to the class. Beside them stands what all rooms use."""
