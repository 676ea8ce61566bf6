"""Live food, computed: vessels, hatches of cysts, the shelf; need against supply by day."""
