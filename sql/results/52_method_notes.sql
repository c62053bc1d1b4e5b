-- results.method_notes: one row per published figure: how it is made.
-- Reads seeds.method_notes.
create or replace table results.method_notes as
select key, title, words
from seeds.method_notes
order by key
