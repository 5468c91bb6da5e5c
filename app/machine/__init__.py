"""The machine model: pure Python, nothing of the web, imports nothing else of the project.

``words`` sizes and numbers, ``transfers`` and ``instructions`` the definition of every
instruction as data, ``assembler`` and ``disassembler`` the source text, ``engine`` the cycle
that carries the transfers out, ``run`` a whole run that can be entered at any step.
"""
