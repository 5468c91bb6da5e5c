"""The lesson: pure Python over ``app.machine``.

``file`` turns a lesson file into a :class:`~app.lesson.model.Lesson` with every problem told at
once, ``blocks`` has one module for each kind of block, ``asking`` what a class is asked and how it
is marked, ``paper`` what is printed of a lesson. Beside them stand what all of them share:
``places`` names places in a run, ``timeline`` finds them, ``parts`` names the parts of the machine.
"""
