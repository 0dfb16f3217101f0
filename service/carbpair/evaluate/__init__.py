"""Score the shipped readers on photographs whose truth is known."""
