"""Small parts that several adapters use. Private to this package: other adapters bring their own."""
