"""What is wrong on a site: readings brought back from it, and the faults that explain them."""
