; The installer for Windows: for one user, without an administrator. Made by scripts/packages with
;   makensis -DVERSION=… -DFILES=folder -DOUT=file [-DQUICK]
; Silent: /S. Everything it writes is under $INSTDIR, the start menu's folder of that user, and one key
; of the registry under that user. The log lies elsewhere and is never touched.
; Of 64 bits, as the program: what wants 32 runs on fewer machines.
Target amd64-unicode
!include LogicLib.nsh

Name "reedcrow ${VERSION}"
OutFile "${OUT}"
RequestExecutionLevel user
InstallDir "$LOCALAPPDATA\Programs\reedcrow"
InstallDirRegKey HKCU "Software\reedcrow" "Folder"
!ifdef QUICK
SetCompress off
!else
SetCompressor /SOLID lzma
!endif
; The same files make the same installer.
SetDateSave off
VIProductVersion "${VERSION}.0"
VIAddVersionKey "ProductName" "reedcrow"
VIAddVersionKey "ProductVersion" "${VERSION}"
VIAddVersionKey "FileVersion" "${VERSION}"
VIAddVersionKey "FileDescription" "Installs reedcrow for this user"
VIAddVersionKey "LegalCopyright" "MIT licence"

Page directory
Page instfiles
UninstPage uninstConfirm
UninstPage instfiles

!define UNINSTALL "Software\Microsoft\Windows\CurrentVersion\Uninstall\reedcrow"

Function .onInit
    SetShellVarContext current
FunctionEnd

Function un.onInit
    SetShellVarContext current
FunctionEnd

Section
    SetOutPath "$INSTDIR"
    ; A program that runs cannot be replaced: better said now than half done.
    ClearErrors
    Delete "$INSTDIR\reedcrow.exe"
    ${If} ${Errors}
        MessageBox MB_OK|MB_ICONSTOP "reedcrow is running. Close its window, then install again." /SD IDOK
        SetErrorLevel 2
        Quit
    ${EndIf}
    File /r "${FILES}\*"
    WriteUninstaller "$INSTDIR\uninstall.exe"
    WriteRegStr HKCU "Software\reedcrow" "Folder" "$INSTDIR"
    WriteRegStr HKCU "${UNINSTALL}" "DisplayName" "reedcrow"
    WriteRegStr HKCU "${UNINSTALL}" "DisplayVersion" "${VERSION}"
    WriteRegStr HKCU "${UNINSTALL}" "UninstallString" '"$INSTDIR\uninstall.exe"'
    WriteRegStr HKCU "${UNINSTALL}" "QuietUninstallString" '"$INSTDIR\uninstall.exe" /S'
    WriteRegDWORD HKCU "${UNINSTALL}" "NoModify" 1
    WriteRegDWORD HKCU "${UNINSTALL}" "NoRepair" 1
    CreateDirectory "$SMPROGRAMS\reedcrow"
    ; What they start works in the user's documents, where recordings are.
    SetOutPath "$DOCUMENTS"
    ; A window that says why it could not begin stays until it was read.
    CreateShortcut "$SMPROGRAMS\reedcrow\reedcrow bench.lnk" "$SYSDIR\cmd.exe" \
        '/c ""$INSTDIR\reedcrow.exe" bench || pause"' "$INSTDIR\reedcrow.exe"
    ; A long path would be cut off by what could change it here, so it is set in this window alone.
    CreateShortcut "$SMPROGRAMS\reedcrow\reedcrow commands.lnk" "$SYSDIR\cmd.exe" \
        '/k "set "PATH=$INSTDIR;%PATH%" && reedcrow"' "$INSTDIR\reedcrow.exe"
SectionEnd

Section Uninstall
    ClearErrors
    Delete "$INSTDIR\reedcrow.exe"
    ${If} ${Errors}
        MessageBox MB_OK|MB_ICONSTOP "reedcrow is running. Close its window, then remove it again." /SD IDOK
        SetErrorLevel 2
        Quit
    ${EndIf}
    Delete "$INSTDIR\README.md"
    Delete "$INSTDIR\LICENCES.txt"
    Delete "$INSTDIR\parts.cdx.json"
    Delete "$INSTDIR\uninstall.exe"
    ; Only what was installed: a folder that holds something else stays.
    Delete "$INSTDIR\demo-data\*.wav"
    Delete "$INSTDIR\demo-data\README.md"
    RMDir "$INSTDIR\demo-data"
    SetOutPath "$TEMP"
    RMDir "$INSTDIR"
    Delete "$SMPROGRAMS\reedcrow\reedcrow bench.lnk"
    Delete "$SMPROGRAMS\reedcrow\reedcrow commands.lnk"
    RMDir "$SMPROGRAMS\reedcrow"
    DeleteRegKey HKCU "${UNINSTALL}"
    DeleteRegKey HKCU "Software\reedcrow"
SectionEnd
