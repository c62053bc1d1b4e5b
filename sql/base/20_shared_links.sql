-- base.shared_links: one row per service point of a link that has several. Reads base.links.
create or replace table base.shared_links as
select link, point_no
from base.links
where link in (select link from base.links group by link having count(*) > 1)
order by link, point_no
