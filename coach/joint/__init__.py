"""What is to be cut: layouts, parts, marks and the limits of wood."""
