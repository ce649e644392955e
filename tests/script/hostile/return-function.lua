-- A script returns one table.
-- play: rule
-- expect: returned a function
return function() end
