"""From standby to standby: the conductor, the stage, programmes, actions, status."""
