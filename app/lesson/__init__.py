"""The lesson: pure Python over ``app.machine``.

``reader`` turns a lesson file into a :class:`~app.lesson.model.Lesson` with every problem told at
once: ``fences`` and ``header_lines`` find the slips that Markdown and YAML would take for something
else, ``header`` reads its head, ``scenes`` each scene, and one module each kind of block (``cues``,
``questions``, ``scale``, ``speed``, ``tasks``, ``parts``). ``places`` names places in a run,
``timeline`` finds them, and ``checks`` warns of what a run never comes to. ``shelf`` keeps a folder
of lessons.
"""
