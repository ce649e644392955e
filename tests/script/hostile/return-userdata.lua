-- A script returns a table of the API.
-- play: rule
-- expect: kind is missing
return rig
