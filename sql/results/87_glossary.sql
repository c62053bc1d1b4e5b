-- results.glossary: what the words on the pages mean.
-- Reads seeds.glossary.
create or replace table results.glossary as
select term, meaning
from seeds.glossary
order by term
