"""Loads a project, builds its graphs, computes its electrical state, runs rules, writes reports."""
