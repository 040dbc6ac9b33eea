"""What ``scout`` computes and writes."""
