"""From text on disk to checked values, keeping the line and column of everything."""
