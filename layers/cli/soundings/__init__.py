"""What ``soundings`` computes and writes."""
