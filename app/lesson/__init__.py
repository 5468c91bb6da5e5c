"""The lesson: pure Python over ``app.machine``.

``reader`` turns a lesson file into a :class:`~app.lesson.model.Lesson` with every problem told
at once; ``cues`` finds the places in a run that a cue names; ``shelf`` keeps a folder of them.
"""
