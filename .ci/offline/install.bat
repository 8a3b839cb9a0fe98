@echo off
rem Installs o2sim from this folder, without a network: install.bat [FOLDER], by default into o2sim in your profile.
setlocal
set "HERE=%~dp0"
set "TARGET=%~1"
if "%TARGET%"=="" set "TARGET=%USERPROFILE%\o2sim"
set "PYTHONPATH="
set "PYTHONHOME="

py -@PYTHON@ -c "import struct, sys; sys.exit(struct.calcsize('P') != 8)" 2>nul
if errorlevel 1 (
    echo FAILED: found no 64-bit Python @PYTHON@; install it first, with its launcher "py"
    exit /b 1
)
if exist "%TARGET%" if not exist "%TARGET%\pyvenv.cfg" (
    echo FAILED: "%TARGET%" is there already, and o2sim is not installed in it; name another folder
    exit /b 1
)
py -@PYTHON@ -m venv "%TARGET%"
if errorlevel 1 (
    echo FAILED: no folder for it could be made
    exit /b 1
)
rem Only what is in this folder is installed, and only if it is what was put there.
set "PIP_CONFIG_FILE=nul"
"%TARGET%\Scripts\python.exe" -m pip --isolated --disable-pip-version-check install --quiet --no-compile --no-index --find-links "%HERE%wheels" --require-hashes --requirement "%HERE%requirements.txt"
if errorlevel 1 (
    echo FAILED: o2sim is not installed; if a file does not match its hash, copy the folder again
    exit /b 1
)
"%TARGET%\Scripts\python.exe" "%HERE%check.py"
if errorlevel 1 exit /b 1
echo Start it with: "%TARGET%\Scripts\o2sim.exe"
