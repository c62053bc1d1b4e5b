"""An invented fleet of flexible metal hoses, made from known parameters, with the dirt of logs."""
