"""Planning a heat: one ladle, its tundishes and strands from the first stream to the cut pieces."""
