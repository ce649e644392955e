-- A script returns one table.
-- play: rule
-- expect: returned a number
return 42
