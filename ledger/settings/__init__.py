"""Settings that a processing program left as text: read, cleaned of secrets, mapped to fields.

No program's format is built in: what is read is JSON, XML, INI, TOML, YAML, `key = value` text or
a log. Which key means which record field is said once by a person, in a settings map.
"""
