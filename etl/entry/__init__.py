"""What people enter in the pages: checked like any loaded row, appended, and built in."""
