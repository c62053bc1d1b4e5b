-- base.in_service: the rows of lives.in_service with their place. Reads lives.in_service, lives.stays.
create or replace table base.in_service as
select i.*, s.point_no
from lives.in_service as i
join lives.stays as s on s.stay_id = i.life_id
order by i.life_id
