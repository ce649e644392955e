-- An error that is a table.
-- play: rule
-- expect: error with a table
error({})
