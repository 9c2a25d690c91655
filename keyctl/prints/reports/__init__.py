"""What is told of an act, a loss, the counts of a site."""
