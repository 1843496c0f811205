"""The SQLite journal: the one database, its migrations, its writer and its readers."""
