"""Currents: tables, fields of S-111, slacks and greatest floods and ebbs."""
