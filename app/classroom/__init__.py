"""One teacher and a class: sessions of a lesson, who watches them, and the clock that plays."""
