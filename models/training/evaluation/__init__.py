"""Score the shipped readers on rendered photographs with truth, and fit what is fitted."""
