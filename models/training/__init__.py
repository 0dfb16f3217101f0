"""What makes the weights: scenes, renders, training and evaluation. Never needed at run time."""
