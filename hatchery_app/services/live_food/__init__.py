"""Live food, recorded and answered: vessels, cysts, the shelf, three weeks ahead."""
