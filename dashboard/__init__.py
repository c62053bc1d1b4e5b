"""The pages: they read published editions and never write one."""
