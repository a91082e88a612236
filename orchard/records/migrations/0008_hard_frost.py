from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('records', '0007_ground'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='happening',
            name='happening_what_known',
        ),
        migrations.AlterField(
            model_name='happening',
            name='what',
            field=models.CharField(choices=[('potted', 'repotted'), ('staked', 'staked'), ('bark_bared', 'bark laid bare'), ('frost_night', 'frost night'), ('hard_frost', 'hard frost (-2 °C or less for 4 hours)'), ('heavy_rain', 'heavy rain (25 mm or more in a day)'), ('covered', 'covered against frost'), ('application', 'product applied'), ('harvested', 'harvest finished'), ('other', 'something else')], max_length=16),
        ),
        migrations.AddConstraint(
            model_name='happening',
            constraint=models.CheckConstraint(condition=models.Q(('what__in', ['potted', 'staked', 'bark_bared', 'frost_night', 'hard_frost', 'heavy_rain', 'covered', 'application', 'harvested', 'other'])), name='happening_what_known'),
        ),
    ]
