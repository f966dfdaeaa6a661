"""Where a selector's channel falls, and where the receiver's bands begin and end."""
