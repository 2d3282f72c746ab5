"""One server for a class: a link and a series for each student, the teacher sees answers."""
