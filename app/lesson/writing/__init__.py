"""Writing a lesson: changes of a few lines of its file, every other byte as it was.

``text`` puts lines in the place of others, ``outline`` knows which lines belong to which block.
``manuscript`` holds a text together with the lesson that it makes; ``offers`` names the places in
the run at which something can be said or asked, and ``saying``, ``pointing``, ``asking_here`` and
``whole_parts`` write it. ``folder`` and ``drafts`` keep it on the disk, ``differences`` tells two
versions apart.
"""
