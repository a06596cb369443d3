"""What is asked and said on a walk, apart from where it is: the screens and the plain lines share it."""
