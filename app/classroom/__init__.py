"""One teacher and a class: sessions of a lesson, who watches them, and the clock that plays.

``session`` is a lesson on the board, ``course`` the steps that the keys go through, ``settings``
how it is shown, ``view`` what is to be seen, ``ballot`` a question to the class, ``bookmark`` and
``store`` what is kept, ``hub`` who is told.
"""
