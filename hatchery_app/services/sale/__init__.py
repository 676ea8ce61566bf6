"""Sale, recorded and answered: holds, sales, arrivals, the line of origin."""
