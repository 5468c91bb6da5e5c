"""The machine model: pure Python, nothing of the web, imports nothing else of the project.

``words`` sizes and numbers; ``registers``, ``operations``, ``addressing``, ``transfers`` and
``instructions`` the definition of every instruction as data, and ``machine`` all of it as one
value; ``engine`` the cycle that carries the transfers out, ``run`` a whole run that can be entered
at any step. ``source`` reads and writes programs, ``telling`` says what a step did.
"""
