"""Sale, computed: losses on arrival, and the fast before packing."""
