"""What is compared within visits and trips, so that good days and good ground favour nothing."""
