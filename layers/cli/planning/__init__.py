"""What ``plan`` computes and writes."""
